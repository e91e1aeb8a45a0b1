"""The dashboard: ``streamlit run app.py``, or ``lensyard dashboard``."""

from lensyard.ui.app import run

if __name__ == "__main__":
    run()
