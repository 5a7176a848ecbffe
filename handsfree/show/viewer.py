"""A display in its own process, for a browser: run as a module by the web server."""

from __future__ import annotations

import os
import threading

from handsfree.child import die_with_parent
from handsfree.show.display import Board
from handsfree.show.remote import ViewClient


def main() -> None:
    """Show the bench at the address in the environment, until it ends."""
    die_with_parent()
    ended = threading.Event()
    client = ViewClient(dict(os.environ), ended.set)
    Board(client.latest, client.press, ended.set, over=ended.is_set).run()


if __name__ == "__main__":
    main()
