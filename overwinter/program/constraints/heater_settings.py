"""One heater setting a shelter and spell; trees only where the setting suits them."""

from collections.abc import Iterator

import pulp

from overwinter.program.model import Model


def one_setting(model: Model) -> Iterator[pulp.LpConstraint]:
    """A shelter has one heater setting through a spell.

    sum over s of z[h,s,k] = 1        for all h, k with a choice
    """
    for settings in model.settings.values():
        if len(settings) > 1:
            yield pulp.lpSum(list(settings.values())) == 1


def suits_setting(model: Model) -> Iterator[pulp.LpConstraint]:
    """A tree is in a shelter only while the shelter's setting suits it.

    sum over p in h, c within I of y[g,p,c,k] <= n[g] sum over s in I of z[h,s,k]
                                              for all g, h, k and each class of settings I of g
    """
    for (group, spell), stays in model.stays.items():
        by_shelter: dict[str, dict[frozenset[int], list[pulp.LpVariable]]] = {}
        for stay in stays:
            shelter = model.data.season.places[stay.place_id].shelter_id
            classes = by_shelter.setdefault(shelter, {})
            classes.setdefault(frozenset(stay.settings), []).append(stay.variable)
        count = model.data.groups[group].count
        for shelter, classes in by_shelter.items():
            everything = frozenset(model.settings[shelter, spell])
            for settings in classes:
                if settings == everything:
                    continue
                inside = [v for other, found in classes.items() if other <= settings for v in found]
                yield pulp.lpSum(inside) <= count * model.chosen(shelter, spell, sorted(settings))


def breakers(model: Model) -> Iterator[pulp.LpConstraint]:
    """Heaters on one breaker draw no more than it carries, all on at once.

    sum over h, s of w[h,s,b] z[h,s,k] <= W[b]        for all breakers b, k
    """
    for breaker, limit_w in model.data.season.site.breakers_w.items():
        for spell in range(len(model.data.spells)):
            terms = []
            for (shelter, k), settings in model.settings.items():
                if k != spell:
                    continue
                for setting, variable in settings.items():
                    watts = model.data.breaker_w[shelter][setting].get(breaker, 0.0)
                    if watts:
                        terms.append(watts * (1 if variable is None else variable))
            if any(isinstance(term, pulp.LpAffineExpression) for term in terms):
                yield pulp.lpSum(terms) <= limit_w
