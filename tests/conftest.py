"""No test touches what the user of this machine has: logs, venues, imported plays, settings."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from lensyard.config import CONFIG_VARIABLE, DATA_VARIABLE

# Before any test module loads plays at import. The cache may be shared: everything in it is keyed
# by a hash of what made it, and can be made again.
_FOLDER = Path(tempfile.mkdtemp(prefix="lensyard-tests-"))
for _variable in (DATA_VARIABLE, CONFIG_VARIABLE):
    os.environ[_variable] = str(_FOLDER / _variable.lower())
