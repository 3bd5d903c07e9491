"""What is kept, by kind: animals, people, settings, drafts, exams."""
