"""What each command does; `handsfree.cli` only parses and wires."""
