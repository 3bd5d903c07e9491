"""What stands around the exam: presentation, intake, given, planned."""
