"""The program's pages in a browser: who gets in, the front page, the bench's page and its sound."""

from handsfree.page.bench_page import BenchPage, Desk
from handsfree.page.front import FrontPage, Hands, Order
from handsfree.page.site import Site
from handsfree.page.sound import PageSound

__all__ = ["BenchPage", "Desk", "FrontPage", "Hands", "Order", "PageSound", "Site"]
