"""Binary packets by a layout file: data only, nothing in it is executed."""

from feeds.layout.feed import LayoutFeed
from feeds.layout.model import Layout
from feeds.layout.read import layout_from_text, layout_of, read_layout
from feeds.layout.write import layout_text

__all__ = ["Layout", "LayoutFeed", "layout_from_text", "layout_of", "layout_text", "read_layout"]
