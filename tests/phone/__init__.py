"""The whole way on a phone: a real browser at phone size, the real reader, demo photos."""
