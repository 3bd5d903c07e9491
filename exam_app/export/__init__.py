"""Records in forms that other programs read; none of them is signed."""
