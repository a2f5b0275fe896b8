"""A day in the field as plain acts: ten trains of three ports, put together, hung and started."""

PORTS = {
    "A": ("charcoal 100/50", "CH-7715", "30.1"),
    "B": ("carbon molecular sieve 150/75", "CM-0401", "35.2"),
    "C": ("DNPH silica cartridge", "DN-2219", "100.4"),
}
"""Medium, lot and flow by port. [mL/min]"""

TRAINS = [f"T-{number}" for number in range(101, 111)]

BENCH = {
    "place": "Van behind hall 3",
    "meter": "M-1",
    "basis": "actual",
    "temperature": "21.0",
    "temperature_unit": "°C",
    "pressure": "83.4",
    "pressure_unit": "kPa",
    "humidity_percent": "24",
}
"""What holds at the bench once somebody was asked."""


def worker_of(train):
    """Nine people; the first wears two trains."""
    return f"W-0{(int(train[2:]) - 101) % 9 + 1}"


def pump_of(train):
    """The register has eight pumps; two serve twice in these tests."""
    return f"P-0{(int(train[2:]) - 101) % 8 + 1}"


def planned(samplers=None):
    """The day's trains as a plan would have them; `samplers` by train and port."""
    return [
        {
            "train": train,
            "worker": worker_of(train),
            "pump": pump_of(train),
            "splitter": "TR-1",
            "source": "typed",
            "ports": [
                {
                    "port": port,
                    "medium": medium,
                    "sampler": (samplers or {}).get((train, port), ""),
                    "methods": [],
                    "target_lpm": float(flow.split(".")[0]) / 1000,
                    "target_unit": "mL/min",
                }
                for port, (medium, _, flow) in PORTS.items()
            ],
        }
        for train in TRAINS
    ]


def act(kind, **fields):
    """One act as the page records it."""
    return {"kind": kind, "fields": fields}


def prepared(train):
    """From the pump in hand to a closing round that stands."""
    return [
        act("train_prepared", train=train, pump=pump_of(train), splitter="TR-1", warm_up_min="10", battery="full"),
        act("leak_checked", train=train, passed="yes"),
        *(
            act(
                "port_prepared",
                train=train,
                port=port,
                tube=f"CAL-{port}",
                medium=medium,
                lot=lot,
                target=flow.split(".")[0],
                target_unit="mL/min",
            )
            for port, (medium, lot, flow) in PORTS.items()
        ),
        *(
            act(
                "flow_read",
                train=train,
                port=port,
                phase="closing",
                meter="M-1",
                reading=flow,
                unit="mL/min",
                basis="actual",
            )
            for port, (_, _, flow) in PORTS.items()
            for _ in range(3)
        ),
        act("closing_round", train=train, ports="A B C", valve_touched="no"),
    ]


def sampler_of(train, port):
    """A sampler's number for tests in which the plan does not say one."""
    return f"X-{train[2:]}{port}"


def hung_and_started(train):
    """On somebody, with a sampler on every port, running."""
    return [
        act("train_hung", train=train, worker=worker_of(train), side="left"),
        *(
            act(
                "sampler_fitted",
                train=train,
                port=port,
                sampler=sampler_of(train, port),
                medium=medium,
                lot=lot,
                how="scanned",
            )
            for port, (medium, lot, _) in PORTS.items()
        ),
        act("pump_started", train=train, counter_min="0"),
    ]
