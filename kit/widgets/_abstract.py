"""A base class of widgets that cannot be used before its blanks are filled in."""

from __future__ import annotations

from abc import ABCMeta

from traitlets import MetaHasTraits

__all__ = ["AbstractWidget"]


class AbstractWidget(ABCMeta, MetaHasTraits):
    """Lets a class have both traits and abstract methods (`abc.abstractmethod`)."""
