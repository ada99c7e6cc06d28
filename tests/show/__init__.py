"""Tests of the answer in words and in pictures."""
