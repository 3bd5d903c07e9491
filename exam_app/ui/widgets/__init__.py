"""Controls that several screens use."""
