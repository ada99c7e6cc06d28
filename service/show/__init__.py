"""The answer in words and in pictures."""
