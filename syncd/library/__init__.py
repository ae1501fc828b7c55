"""The master library: finding files, reading tags and audio facts, hashing, the index at home."""
