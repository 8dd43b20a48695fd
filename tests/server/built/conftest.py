"""A server without processes of its own, and a guitar on it, for every test of a module."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient
from finished_guitar import Guitar, without_processes
from server_client import client_of


@pytest.fixture(scope="module", autouse=True)
def _here() -> Iterator[None]:
    with without_processes():
        yield


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with client_of(tmp_path_factory.mktemp("data")) as found:
        yield found


@pytest.fixture(scope="module")
def guitar(client: TestClient) -> Guitar:
    return Guitar(client)
