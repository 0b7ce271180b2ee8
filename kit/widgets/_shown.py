"""What all widgets have in common: a static form that stays, beside the live view."""

from __future__ import annotations

from abc import ABCMeta, abstractmethod
from typing import Any

import anywidget
from IPython.display import display
from traitlets import MetaHasTraits

from kit.widgets._saved import view_bundle

__all__ = ["ShownWidget"]


class _AbstractWidget(ABCMeta, MetaHasTraits):
    """Lets a class have both traits and abstract methods."""


class ShownWidget(anywidget.AnyWidget, metaclass=_AbstractWidget):
    """A widget that shows itself when it is the last thing in a cell."""

    @abstractmethod
    def static_form(self) -> dict[str, Any]:
        """Give what is saved in the notebook, by MIME type."""

    def _ipython_display_(self) -> None:
        """Put out the static form, which stays, and the live view, which works."""
        for bundle in (self.static_form(), view_bundle(self.model_id)):
            display(bundle, raw=True)  # type: ignore[no-untyped-call]

    def _repr_mimebundle_(self, **_: Any) -> tuple[dict[str, Any], dict[str, Any]]:
        """Give the static form, for whoever asks for one bundle."""
        return self.static_form(), {}
