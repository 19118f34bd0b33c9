"""Do the parts of a site belong together? Bed against survey, spacing against bed."""

from __future__ import annotations

from dripfield.site.model import Site


def check_site(site: Site) -> None:
    """Refuse a site that cannot be laid out."""
