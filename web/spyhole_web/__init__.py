"""The page: what a phone beside the kiln sees, and the interface it is made of."""

from spyhole_web.page import build_page, end_streams

__all__ = ["build_page", "end_streams"]
