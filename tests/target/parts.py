"""Everything that takes up room on a target, as named boxes."""

from negcurve.target.layout import FRAME_MM, MARK_RADIUS_MM, Box, Layout


def parts(layout: Layout) -> dict[str, Box]:
    found = {}
    for place, (x, y) in enumerate(layout.marks_mm):
        found[f"mark {place}"] = Box(
            left_mm=x - MARK_RADIUS_MM,
            top_mm=y - MARK_RADIUS_MM,
            width_mm=2 * MARK_RADIUS_MM,
            height_mm=2 * MARK_RADIUS_MM,
        )
    for place, box in enumerate(layout.identity_boxes):
        found[f"identity {place}"] = box
    for patch in layout.patches:
        found[f"patch {patch.number}"] = patch.box
    for bar in layout.scale_bars:
        found[f"scale bar {bar.direction}"] = bar.box
    for text in layout.lettering():
        found[f"text {text.text}"] = text.box
    for name in ("tape_box", "tablet_window"):
        box = getattr(layout, name)
        if box is not None:
            found[name] = box.grown(FRAME_MM)
    return found


def live_area(layout: Layout) -> Box:
    margin = layout.margin_mm
    return Box(
        left_mm=margin,
        top_mm=margin,
        width_mm=layout.width_mm - 2 * margin,
        height_mm=layout.height_mm - 2 * margin,
    )
