"""The local server, its guard, the app's own window and the phone's page."""
