"""The page's colors: everything that is read or pressed stands out in every look."""

from lensyard.render.theme import THEMES


def test_the_sheet_uses_no_color_of_its_own():
    import re
    from importlib.resources import files

    sheet = (files("lensyard.dashboard") / "static" / "page.css").read_text(encoding="utf-8")
    bare = re.sub(r"/\*.*?\*/", "", sheet, flags=re.DOTALL)
    assert re.findall(r"#[0-9A-Fa-f]{3,8}\b|rgba?\(", bare) == []
    used = set(re.findall(r"var\(--ly-([a-z0-9-]+)\)", bare)) - {"hair"}
    assert used <= {role.replace("_", "-") for role in THEMES["sunlight"].colors()}
