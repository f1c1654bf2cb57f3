"""The board: folders of logs become the state of every loom, and a picture of it."""
