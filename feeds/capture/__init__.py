"""Packet captures (`.pcap`, `.pcapng`): the UDP datagrams in them, with the time at which each was seen.

Only what is needed of the formats is read, as their descriptions say it (draft-ietf-opsawg-pcap and
draft-ietf-opsawg-pcapng); a capture is somebody else's file, so anything in it may be wrong.
"""

from feeds.capture.datagrams import Captured, Traffic, captured, survey
from feeds.capture.frames import is_capture

__all__ = ["Captured", "Traffic", "captured", "is_capture", "survey"]
