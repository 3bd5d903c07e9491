"""The commands of ``exam-app``."""
