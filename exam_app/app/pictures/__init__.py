"""Pictures made ready to be kept: read, drawn anew, and nothing beside them left."""
