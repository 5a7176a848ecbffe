"""One command, one file: its arguments and what it does. `handsfree.cli` imports it when it is typed."""
