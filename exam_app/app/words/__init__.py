"""Take what a line says into an exam, by the changes that the buttons make."""
