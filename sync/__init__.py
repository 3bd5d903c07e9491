"""Hand-over between field devices and the clinic's computer, sealed and receipted."""
