"""Pressings: the files made from tracks for a player, inspected, dressed with tags, and kept."""
