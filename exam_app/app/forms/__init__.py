"""Forms without their drawing: what was typed becomes values or problems."""
