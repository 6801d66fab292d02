#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>

#include "sim/study/study.hpp"

namespace driftglow::study {

inline constexpr std::size_t most_designs = 100'000;

// The study of a file and its scenario, with another seed where one is given. Throws InputError whose text is
// one sentence a fault, joined by line breaks, in the order of the file.
Study read_study(const std::filesystem::path& file, std::optional<std::uint64_t> seed = {});

// The same from texts, for parts of a study that are joined; the scenario's name is that of its file.
Study parse_study(const std::string& text, const std::string& name_shown, const scenario::Scenario& base,
                  const std::filesystem::path& base_file);

}  // namespace driftglow::study
