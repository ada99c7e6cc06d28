"""Tests, by the folders of the program."""
