"""The app for a phone: a folder of files that any static host can give out."""
