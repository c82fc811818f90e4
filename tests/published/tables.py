"""Small published tables; each file's first line names its source."""

from pathlib import Path

import pandas as pd

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "published"


def table(name: str) -> pd.DataFrame:
    return pd.read_csv(FOLDER / name, comment="#")
