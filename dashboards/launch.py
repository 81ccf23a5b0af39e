"""Start the dashboard's server on this computer only."""

from __future__ import annotations

import os
import socket
import sys
from pathlib import Path

import streamlit as st

from dashboards import FOLDER, theme

HOST = "127.0.0.1"
FIRST_PORT = 8520
PORTS = 80
APP = Path(__file__).resolve().parent / "app.py"


def free_port(first: int = FIRST_PORT) -> int:
    """Return the first free port from there up.

    Raises
    ------
    OSError
        If none of the next 80 is free.
    """
    for port in range(first, first + PORTS):
        if not taken(port):
            return port
    raise OSError(f"no port is free from {first} to {first + PORTS - 1}; close a running dashboard")


def taken(port: int) -> bool:
    """Return whether a program already listens there."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        return probe.connect_ex((HOST, port)) == 0


def serve(data_dir: Path, port: int | None = None) -> None:
    """Serve the dashboard until it is stopped.

    Parameters
    ----------
    data_dir
        Data folder whose newest snapshot is shown.
    port
        Port to use, None = the first free one from 8520.

    Raises
    ------
    OSError
        If the port is taken, or none is free.
    """
    chosen = free_port() if port is None else port
    if taken(chosen):
        raise OSError(f"port {chosen} is taken by another program; leave the port out, or name another")
    os.environ[FOLDER] = str(data_dir)
    app = st.App(APP)
    settings = {
        **theme.options(),
        "server.address": HOST,
        "server.port": chosen,
        "server.allowedHosts": [HOST, "localhost"],
    }
    sys.stdout.write(f"http://{HOST}:{chosen}\n")
    sys.stdout.flush()
    app.run(config=settings)
