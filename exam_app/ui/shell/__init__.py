"""The window around every screen: layout, dialogs, routes, theme."""
