"""No test touches what the user of this machine has: logs, venues, imported plays, settings."""

import os
import re
import tempfile
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

CONFIG_VARIABLE = "LENSYARD_CONFIG_DIR"
DATA_VARIABLE = "LENSYARD_DATA_DIR"

if TYPE_CHECKING:
    pass

# Before NumPy is imported: tests run side by side, and its many small products want one thread.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Laws are held to the same examples each time: some here, more in .ci/run.
settings.register_profile("usual", derandomize=True, deadline=None, max_examples=40)
settings.register_profile("thorough", settings.get_profile("usual"), max_examples=100)
settings.load_profile("usual")

APP = Path(__file__).resolve().parents[1] / "app.py"

# Before any test module loads plays at import. The cache may be shared: everything in it is keyed
# by a hash of what made it, and can be made again.
_FOLDER = Path(tempfile.mkdtemp(prefix="lensyard-tests-"))
for _variable in (DATA_VARIABLE, CONFIG_VARIABLE):
    os.environ[_variable] = str(_FOLDER / _variable.lower())
os.environ.pop("LENSYARD_MODEL", None)


@pytest.fixture
def data_folder(tmp_path, monkeypatch):
    """A folder of one's own for logs and answers."""
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path))
    return tmp_path


@pytest.fixture
def open_page(data_folder):
    """Open a page of the dashboard by the last part of its address, without a browser."""
    from streamlit.testing.v1 import AppTest
    from streamlit.util import calc_hash

    def opened(page="", **query):
        app = AppTest.from_file(str(APP), default_timeout=60)
        for box in ("ly_kit", "ly_ground", "ly_game", "ly_screen"):
            app.session_state[box] = True  # what is in a closed box is not made
        for name, values in query.items():
            app.query_params[name] = values
        if page:
            # The harness can only switch to pages that are files; ours are functions.
            app._page_hash = calc_hash(page)
        return app.run()

    return opened


@pytest.fixture
def finished():
    """Wait for work that is done aside, then run the page again."""

    def waited(app):
        from lensyard.dashboard import work

        assert work.job_pool().wait(120.0)
        return app.run()

    return waited


@pytest.fixture
def said():
    """Return everything that the page's own HTML says, as text."""

    def text(app):
        pieces = [html.body for html in app.get("html") if not html.body.startswith("<style")]
        return " ".join(unescape(re.sub(r"<[^>]*>", " ", " ".join(pieces))).split())

    return text
