#pragma once

#include <filesystem>
#include <nlohmann/json.hpp>
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

// The content of summary.json.
nlohmann::ordered_json summary_document(const Summary& summary, const scenario::Scenario& scenario,
                                        const std::string& program_version);

// Everything in the summary. Values that do not exist are null. Nothing in it varies from run to run.
std::string summary_json(const Summary& summary, const scenario::Scenario& scenario,
                         const std::string& program_version);

// flight.h5 of interface.md: per-replicate values, pooled counts, trace. The scenario as it was flown, with
// the command line's overrides. `setting`: what the report needs besides; none for a part of a flight.
void write_flight(const std::filesystem::path& path, const Summary& summary,
                  const flight::CampaignResult& campaign, const scenario::Scenario& scenario,
                  const Setting* setting, const std::string& program_version, const store::Run& run);

// flight.h5, summary.json, summary.csv in the folder, each of them whole or as it was.
void write_results(const std::filesystem::path& folder, const Summary& summary,
                   const flight::CampaignResult& campaign, const scenario::Scenario& scenario,
                   const Setting& setting, const std::string& program_version, const store::Run& run);

}  // namespace driftglow::results
