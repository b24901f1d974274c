"""Pages handed to everybody a review is about: who was assessed, who is in training, who was followed over a season."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.arguments import checked
from panelstats.arguments.objects import place
from panelstats.output import write_all
from panelstats.panel.season.fit import SeasonAudit
from panelstats.review import as_review

if TYPE_CHECKING:
    from panelstats.review import Review


def people_of(review: Review) -> dict[str, bytes]:
    """The page of each of them, by a name that a file may have; none where the review is about nobody."""
    if review.find(SeasonAudit) is not None:
        from panelstats.report.pages.seasontaster import season_sheets  # noqa: PLC0415 - a kind of page when it is made

        return season_sheets(review)
    from panelstats.report.pages.taster import sheets_of  # noqa: PLC0415

    return sheets_of(review)


@checked(folder=place)
def write_sheets(review: Review, folder: str | Path, *, overwrite: bool = False) -> list[Path]:
    """Write a sheet for everybody a review is about, all of them or none.

    Parameters
    ----------
    review : Review
        From `review_tasters`, `review_trainees`, `review_session` or `review_season`.
    folder : str or Path
        Made where it does not exist.

    Returns
    -------
    list of Path
        NAME.html for each; none where the review is about nobody.

    Raises
    ------
    PanelError
        A file that is not ours stands in the way, or the folder cannot be written.
    """
    folder, review = Path(folder), as_review(review)
    files = {folder / f"{name}.html": page for name, page in people_of(review).items()}
    if files:
        write_all(files, folder=folder, overwrite=overwrite, read=review.files)
    return list(files)
