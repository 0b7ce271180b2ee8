"""May this be published? What the teacher states, and the usual terms of protection."""

from kit.rights.advice import REMINDER, Advice, advice, rights_words
from kit.rights.countries import Country, countries, country
from kit.rights.ledger import RIGHTS_BASES, Person, Rights, Work, credit_line
from kit.rights.terms import Term, term_in, terms

__all__ = [
    "REMINDER",
    "RIGHTS_BASES",
    "Advice",
    "Country",
    "Person",
    "Rights",
    "Term",
    "Work",
    "advice",
    "countries",
    "country",
    "credit_line",
    "rights_words",
    "term_in",
    "terms",
]
