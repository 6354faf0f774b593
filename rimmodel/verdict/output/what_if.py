"""x."""
from pathlib import Path
TEMPLATES = Path(__file__).parent / "templates"
MECHANICS = (TEMPLATES / "what_if_mechanics.js").read_text(encoding="utf-8")
