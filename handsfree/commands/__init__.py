"""One command, one file: its arguments and its action. `handsfree.cli` imports it when it is typed."""
