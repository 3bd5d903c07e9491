"""The words of a record, of its limits and of its flags."""
