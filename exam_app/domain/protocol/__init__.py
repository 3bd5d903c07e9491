"""What a species' protocol holds, and the limits it compares with."""
