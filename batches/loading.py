"""Yarn into pots: equal loads first, yarn lots kept together. Plain numbers, no Django."""


def spread(skeins, pots):
    """How many skeins each of `pots` pots takes, as equal as whole skeins allow, the fuller ones first.

    >>> spread(7, 2)
    [4, 3]

    Raises ValueError when there is no pot, or a pot would stay empty.
    """
    if pots < 1:
        raise ValueError("Choose at least one pot.")
    if skeins < pots:
        raise ValueError(f"{skeins} skeins do not fill {pots} pots: choose fewer pots or more skeins.")
    each, over = divmod(skeins, pots)
    return [each + 1] * over + [each] * (pots - over)


def fill(yarns, pots):
    """[[(key, skeins)]] for each pot: yarns in their order, each pot filled before the next.

    `yarns`: pairs of a key, such as a yarn lot's, and how many skeins of it.
    """
    loads = []
    waiting = [[key, skeins] for key, skeins in yarns if skeins]
    for room in spread(sum(skeins for _, skeins in waiting), pots):
        load = []
        while room:
            key, left = waiting[0]
            taken = min(room, left)
            load.append((key, taken))
            room -= taken
            waiting[0][1] -= taken
            if not waiting[0][1]:
                waiting.pop(0)
        loads.append(load)
    return loads


def mixed_pots(loads):
    """Numbers, from 1, of the pots that hold more than one yarn lot."""
    return [number for number, load in enumerate(loads, 1) if len({key for key, _ in load}) > 1]
