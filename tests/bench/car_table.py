"""The built-in car beside the handbook: `python -m tests.bench.car_table` prints value, run and difference."""

from __future__ import annotations

from tests.physics.car_cases import CASES


def main() -> None:
    """Measure and print."""
    print(f"{'':50} {'unit':8} {'handbook':>10} {'the car':>10} {'differs':>8}  source")
    for case in CASES:
        value = case.run()
        apart = 100.0 * (value / case.handbook - 1.0)
        print(f"{case.what:50} {case.unit:8} {case.handbook:10.4f} {value:10.4f} {apart:+7.2f}%  {case.source}")


if __name__ == "__main__":
    main()
