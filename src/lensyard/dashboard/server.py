"""The application that ``lensyard dashboard`` serves: the pages behind the gate."""

from __future__ import annotations

from starlette.middleware import Middleware
from streamlit.starlette import App

from lensyard.dashboard.gate import Gate
from lensyard.dashboard.serve import script_path

app = App(script_path(), middleware=[Middleware(Gate)])
