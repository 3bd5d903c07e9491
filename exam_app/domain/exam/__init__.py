"""An exam as a value: what it holds, and the pure steps that change it."""
