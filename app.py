"""The dashboard: ``streamlit run app.py``."""

from lensyard.ui.app import run

run()
