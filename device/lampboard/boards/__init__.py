"""Board layers: what node.py needs of the outside, one kind of board a file."""
