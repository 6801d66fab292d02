#pragma once

#include <span>

namespace driftglow::safety {

// Flashes per second that most often trigger photosensitive epilepsy, ends included: 3 to 30 Hz [fisher2005];
// web accessibility rules draw the line at three flashes in a second [wcag22].
inline constexpr double sensitive_flash_rate_low = 3.0;
inline constexpr double sensitive_flash_rate_high = 30.0;

// Shares [1] in the sensitive band, by what is counted; each 0 when there is nothing to count. None sees that
// several tags flash together: a crowd's flashes may add up to a rate that no tag has. periods [s] > 0
// between the starts of flashes (histogram bins' centres or single values) with their counts >= 0, same
// length, else LogicError.

// Of the flashes, those whose rate, one over the time since the flash before, lies in the band.
double sensitive_flash_share(std::span<const double> periods, std::span<const double> counts);

// Of the time between flashes, that spent in such periods.
double sensitive_time_share(std::span<const double> periods, std::span<const double> counts);

// Of the tags, those whose mean rate lies in the band; flashes per minute >= 0, one value a tag, else
// LogicError.
double sensitive_tag_share(std::span<const double> flashes_per_minute);

// Share [1] of one-second windows with more than three flashes at a mean rate [1/min] >= 0, if they came at
// random (Poisson): 1 - e^-x (1 + x + x^2/2 + x^3/6), x the mean in a second. Several tags: their rates
// added, all being in view. An estimate: flashes of one turning tag are more regular than that.
double crowded_second_share(double flashes_per_minute);

}  // namespace driftglow::safety
