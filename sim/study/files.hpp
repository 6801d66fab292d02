#pragma once

#include <filesystem>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sim/results/flight_head.hpp"
#include "sim/store/hdf5_file.hpp"
#include "sim/study/run.hpp"

namespace driftglow::study {

// What a study is, before anything of it is flown.
struct Identity {
  const Study& study;
  std::string program_version;
  std::string arithmetic;
  std::optional<flight::Part> part;

  store::Origin origin() const;
  results::FlightHead head(bool interrupted) const;
};

// What keeps a file of a study from being of this one, as results::what_differs; parts and interruptions are
// the caller's.
std::optional<std::string> what_differs(const store::Reader& there, const Identity& here);

// Everything that a report of the study needs: designs, ranking, effects, indices. Nothing in it varies from
// run to run.
nlohmann::ordered_json study_document(const Study& study, const Table& table,
                                      const std::string& program_version);

// One row a design; RFC 4180 with line feeds. A value that does not exist is an empty field.
std::string study_csv(const Study& study, const Table& table);

// study.h5: the values of every replicate of every design. Of a part the file says which.
void write_study_file(const std::filesystem::path& path, const Identity& identity, const Table& table,
                      const store::Run& run);
// study.h5, study.json, study.csv in the folder.
void write_study(const std::filesystem::path& folder, const Identity& identity, const Table& table,
                 const store::Run& run);

// A file of pieces alone, for a run that is not whole.
void write_pieces(const std::filesystem::path& path, const Identity& identity,
                  const std::vector<Piece>& pieces, const store::Run& run);
// Of such a file or a study.h5. Throws InputError where the file has not the study's outputs.
std::vector<Piece> read_pieces(const store::Reader& file, const Study& study);

// The study that a study.h5 is of.
struct StudyText {
  std::string text, name;
};
StudyText read_study_text(const store::Reader& file);

}  // namespace driftglow::study
