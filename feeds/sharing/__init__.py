"""A drive that others follow, over the network: the driver's side, the follower's side, and what they say."""

from feeds.sharing.follow import Following, Lost
from feeds.sharing.lines import Answer, Missed
from feeds.sharing.share import SHARE_PORT, Share

__all__ = ["SHARE_PORT", "Answer", "Following", "Lost", "Missed", "Share"]
