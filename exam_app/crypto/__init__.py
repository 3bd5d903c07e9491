"""The one door to cryptographic primitives; it knows nothing of exams."""
