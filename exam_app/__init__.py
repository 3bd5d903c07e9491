"""Examine an animal from nose to tail, offline, and hold a signed record."""
