"""The hand-over of several stations in PostgreSQL, beside the store in a folder."""
