"""Make sliders smooth: send small messages at once, in any Jupyter server.

The kernel's messages to the browser are small. Left alone, TCP holds
each back to fill a packet, which caps a dragged slider at about 20
pictures a second. Installing squatlab enables this extension. On a class
server it also makes each user's working copy, when their server starts.
"""

from __future__ import annotations

import logging
import os
from pathlib import Path
from typing import Any

from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection

from squatlab import course
from squatlab.notebook_trust import trust


class PromptConnection(ZMQChannelsWebsocketConnection):
    """Carry kernel messages without waiting to fill a packet."""

    def connect(self) -> Any:
        """Switch the delay off on this browser's socket, then connect."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()


def says_something(record: logging.LogRecord) -> bool:
    """Tell whether a warning of tornado's is one.

    Jupyter Server gives the time between two pings in milliseconds where
    tornado reads seconds, and tornado finds the time to answer too long.
    Jupyter Server pings by itself, so nothing is wrong.
    """
    return "websocket_ping_timeout" not in record.getMessage()


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    return [{"module": "squatlab.server"}]


def _load_jupyter_server_extension(server: Any) -> None:
    logging.getLogger("tornado.general").addFilter(says_something)
    # Only the stock connection is exchanged: a server that was given another keeps it.
    if server.kernel_websocket_connection_class is ZMQChannelsWebsocketConnection:
        server.web_app.settings["kernel_websocket_connection_class"] = PromptConnection
    if folder := os.environ.get("SQUATLAB_COURSE"):
        instructor = bool(os.environ.get("SQUATLAB_INSTRUCTOR"))
        copied = course.working_copy(Path(server.root_dir, folder), instructor)
        trust(copied)
        server.log.info("%s", copied)
