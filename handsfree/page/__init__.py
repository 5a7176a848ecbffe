"""The program's pages in a browser: who gets in, the bench's page, its microphone and loudspeaker."""

from handsfree.page.bench_page import BenchPage, Desk
from handsfree.page.site import Site
from handsfree.page.sound import PageSound

__all__ = ["BenchPage", "Desk", "PageSound", "Site"]
