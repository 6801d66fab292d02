#pragma once

#include <vector>

// The preferred numbers in which resistors, capacitors and inductors are sold (IEC 60063).
namespace driftglow::library {

enum class Series { e6, e12, e24, e48, e96 };

// One decade of the series, from 1 up to below 10, rising.
const std::vector<double>& decade(Series series);

struct Neighbours {
  double below;  // the greatest value of the series that is <= the wanted one
  double above;  // the least that is >= it
};

// Value > 0 in any unit, 1e-30 to 1e30; throws LogicError otherwise.
Neighbours neighbours(double value, Series series);

// The neighbour whose ratio to the value is closer to 1.
double nearest(double value, Series series);

}  // namespace driftglow::library
