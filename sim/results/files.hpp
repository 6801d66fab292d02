#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "sim/results/setting.hpp"
#include "sim/results/summary.hpp"
#include "sim/store/hdf5_file.hpp"

namespace driftglow::results {

// One row a (tag design, emitter); RFC 4180 with line feeds. A value that does not exist (no whole spell, one
// replicate, no LED) is an empty field. duty_low_95 and duty_high_95 are mean -+ Student's half width and are
// not cut off at 0 and 1.
std::string summary_csv(const Summary& summary);

// A field of RFC 4180: in double quotes, those inside doubled, where it holds a comma, a quote or a line
// break.
std::string csv_field(std::string_view text);

// Everything in the summary. Values that do not exist are null. Nothing in it varies from run to run.
std::string summary_json(const Summary& summary, const Setting& setting, const store::Origin& origin);

// flight.h5 of interface.md: per-replicate values, pooled counts, trace, and what the report needs besides.
void write_flight(const std::filesystem::path& path, const Summary& summary,
                  const flight::CampaignResult& campaign, const Setting& setting, const store::Origin& origin,
                  const store::Run& run);

// flight.h5, summary.json, summary.csv in the folder, each of them whole or as it was.
void write_results(const std::filesystem::path& folder, const Summary& summary,
                   const flight::CampaignResult& campaign, const Setting& setting,
                   const store::Origin& origin, const store::Run& run);

}  // namespace driftglow::results
