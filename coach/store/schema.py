"""The tables of the memory, version 2. They are plain SQL with JSON inside, for whoever likes to ask them by hand:

    sqlite3 memory.sqlite "SELECT session, body ->> 'lap', body ->> 'fault', body ->> 'cost' FROM event
        WHERE body ->> 'type' = 'fault'"

`session`: one driver in one car on one circuit.
    `begun`, `ended` s since 1970 by the computer's clock, of the first sample and of the last one kept. `whole`: NULL
    while it is driven, 1 when it was ended in good order, 0 when it was cut short by a kill. `slot`: which of the
    locks beside the file its writer holds (see `slots.py`), NULL when it has ended. `track`, `car`, `driver`, `setup`,
    `kind` (practice, qualifying, race) as the source names them, NULL where it does not. `source`: the feed;
    `version`: of the program. `stage`: the last one practised. `note`: the driver's own words. `conditions`: JSON, the
    last `wetness` (0..1), `track_temp` and `air_temp` (degC).
`event`: what happened, `n` counting from 0 in each session. `body`: the JSON object of the event log, besides those
    that the log leaves out: `passed`, `stage`, `topic`, and of `stores` the first and the last before each lap's end.
    Not the running `delta`. Each has `type`, `t` (s, the source's clock) and `lap`.
`lap`: one that ended, `place` counting from 0 in its session, `number` as the source counts. `time` s, NULL where it
    was not whole; `clean` 0 or 1; `why_not` a JSON list. `name`: the driver's own, or NULL. A lap that was handed on by
    somebody else has no session, and `track`, `car`, `driver` of its own; `taken` s since 1970: when that was; `came`:
    JSON of what came with it, its `circuit`, and `scatter`, `usual` and `warm` of its driver, as in `known`.
`channels`: of a whole lap, by distance; `grid` as in `packing.py`.
`reference`: the lap that a session was held against from its event `n` on, which is of the type `reference` and has its
    time and origin. `lap`: one of the session's own; else `grid`, as in `channels`: a file's, a recalled one or one
    that was made. It stays where the lap it was taken from is forgotten.
`piece`: samples as they came, of the running lap (`place` NULL), of laps that were not whole, and of ones that were
    left and never ended (-1); `begins` and `ends` s of the source's clock, `samples` how many, `columns` as in
    `packing.py`.
`circuit`: its map; `track` as the source names it, `map` the map's id, since two layouts may have one name. `body`:
    JSON of corners and places; `changed` s since 1970.
`known`: what is known of a driver ('' where the source names none, so are the others) in a car on a circuit.
    `scatter` JSON [[corner, feature, [values]]], `usual` JSON [[corner, feature, value]], `warm` degC, `planner` JSON,
    `stage`, `changed` s since 1970.
`chosen`: the lap that is the reference of a car on a circuit by wish.
`thing`: what was told to do next time, `place` 0 the dearest; `body` JSON.
"""

from __future__ import annotations

VERSION = 2
"""`PRAGMA user_version` of what is written here."""
APPLICATION = 0x4357_4D45
"""`PRAGMA application_id`, "CWME": tells a memory from any other database."""

SCHEMA = """
CREATE TABLE session (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    begun REAL NOT NULL,
    ended REAL NOT NULL,
    whole INTEGER,
    slot INTEGER,
    track TEXT,
    car TEXT,
    driver TEXT,
    setup TEXT,
    kind TEXT,
    source TEXT NOT NULL,
    version TEXT NOT NULL,
    stage TEXT NOT NULL,
    note TEXT NOT NULL DEFAULT '',
    conditions TEXT NOT NULL DEFAULT '{}'
);
CREATE TABLE event (
    session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    n INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (session, n)
) WITHOUT ROWID;
CREATE TABLE lap (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    session INTEGER REFERENCES session ON DELETE CASCADE,
    place INTEGER,
    number INTEGER NOT NULL,
    time REAL,
    clean INTEGER NOT NULL,
    why_not TEXT NOT NULL DEFAULT '[]',
    name TEXT UNIQUE,
    track TEXT,
    car TEXT,
    driver TEXT,
    taken REAL,
    came TEXT,
    UNIQUE (session, place)
);
CREATE INDEX quick_lap ON lap (time) WHERE clean AND time IS NOT NULL AND session IS NOT NULL;
CREATE TABLE channels (
    lap INTEGER PRIMARY KEY REFERENCES lap ON DELETE CASCADE,
    grid BLOB NOT NULL
);
CREATE TABLE reference (
    session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    n INTEGER NOT NULL,
    lap INTEGER REFERENCES lap ON DELETE CASCADE,
    grid BLOB,
    PRIMARY KEY (session, n)
);
CREATE INDEX reference_lap ON reference (lap) WHERE lap IS NOT NULL;
CREATE TABLE piece (
    id INTEGER PRIMARY KEY,
    session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    place INTEGER,
    begins REAL NOT NULL,
    ends REAL NOT NULL,
    samples INTEGER NOT NULL,
    columns BLOB NOT NULL
);
CREATE INDEX piece_of_session ON piece (session, place);
CREATE TABLE circuit (
    track TEXT NOT NULL,
    map TEXT NOT NULL,
    body TEXT NOT NULL,
    changed REAL NOT NULL,
    PRIMARY KEY (track, map)
) WITHOUT ROWID;
CREATE TABLE known (
    driver TEXT NOT NULL,
    car TEXT NOT NULL,
    track TEXT NOT NULL,
    scatter TEXT,
    usual TEXT,
    warm REAL,
    planner TEXT,
    stage TEXT,
    changed REAL NOT NULL,
    PRIMARY KEY (driver, car, track)
) WITHOUT ROWID;
CREATE TABLE chosen (
    car TEXT NOT NULL,
    track TEXT NOT NULL,
    lap INTEGER NOT NULL REFERENCES lap ON DELETE CASCADE,
    PRIMARY KEY (car, track)
) WITHOUT ROWID;
CREATE TABLE thing (
    session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    place INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (session, place)
) WITHOUT ROWID;
"""
