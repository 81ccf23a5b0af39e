"""The server: this computer only, our look from any working folder, the address printed."""

import os
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager

import pytest

from dashboards.launch import APP, HOST, free_port, serve

SERVE = """
from pathlib import Path
from sys import argv
from dashboards.launch import serve
serve(Path(argv[1]), int(argv[2]))
"""


@contextmanager
def listening(port):
    with socket.socket() as held:
        held.bind((HOST, port))
        held.listen()
        yield


def test_the_first_free_port_is_taken():
    first = free_port(18_520)
    with listening(first):
        assert free_port(first) > first


def test_without_a_free_port_it_says_what_to_do(monkeypatch):
    monkeypatch.setattr("dashboards.launch.PORTS", 1)
    port = free_port(18_620)
    with listening(port), pytest.raises(OSError, match="close a running dashboard"):
        free_port(port)


def answers(port, process, seconds=60):
    for _ in range(seconds * 4):
        assert process.poll() is None, "the server stopped"
        try:
            with urllib.request.urlopen(f"http://{HOST}:{port}/_stcore/health", timeout=2) as reply:
                return reply.status
        except OSError:
            time.sleep(0.25)
    return None


def test_the_server_starts_anywhere_prints_its_address_and_keeps_to_this_computer(folders, tmp_path):
    port = free_port(18_720)
    command = [sys.executable, "-c", SERVE, str(folders["thin"]), str(port)]
    quiet = {**os.environ, "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        command, cwd=tmp_path, env=quiet, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    try:
        assert answers(port, process) == 200
        with urllib.request.urlopen(f"http://{HOST}:{port}/lasting", timeout=5) as reply:
            assert reply.status == 200
        reachable = [host for host in {socket.gethostbyname(socket.gethostname())} - {HOST} if _open(host, port)]
        assert not reachable or all(host.startswith("127.") for host in reachable)
    finally:
        process.terminate()
        said, _ = process.communicate(timeout=20)
    assert said.splitlines()[0] == f"http://{HOST}:{port}"
    assert "Traceback" not in said


def _open(host, port):
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex((host, port)) == 0


def test_no_folder_named_pages_stands_beside_the_app():
    """Streamlit would take it for its own pages, and a visitor's first deep link would end on an empty page."""
    assert not (APP.parent / "pages").exists()


def test_a_taken_port_is_told_before_any_address(capsys, tmp_path):
    with socket.socket() as held:
        held.bind((HOST, 0))  # whichever is free
        held.listen()
        port = held.getsockname()[1]
        with pytest.raises(OSError, match=f"port {port} is taken"):
            serve(tmp_path, port)
    assert not capsys.readouterr().out
