#include "sim/store/atomic_file.hpp"

#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include "models/error.hpp"
#include "tests/store/folder.hpp"

using namespace driftglow;
using namespace driftglow::store;

TEST_CASE("a text is written whole, in folders made on the way, and replaces the one before") {
  const Folder folder;
  const auto path = folder / "a/b/summary.csv";
  write_text_atomically(path, "first\n");
  CHECK(file_text(path) == "first\n");
  write_text_atomically(path, "second, longer\n");
  CHECK(file_text(path) == "second, longer\n");
  write_text_atomically(path, "");
  CHECK(file_text(path).empty());
  CHECK(std::distance(std::filesystem::directory_iterator(path.parent_path()), {}) == 1);
}

TEST_CASE("permissions follow the user's mask, not the temporary file's") {
  const Folder folder;
  const mode_t previous = umask(027);
  write_text_atomically(folder / "report.html", "x");
  umask(previous);
  struct stat status {};
  REQUIRE(stat((folder / "report.html").c_str(), &status) == 0);
  CHECK((status.st_mode & 0777) == 0640);
}

TEST_CASE("a full disk is the machine's failure and leaves the file as it was") {
  const Folder folder;
  const auto path = folder / "summary.csv";
  write_text_atomically(path, "before");
  std::string message;
  {
    const SizeLimit limit(1000);
    message = message_of<LogicError>([&] { write_text_atomically(path, std::string(1500, 'x')); });
  }
  CHECK(message.starts_with(path.string() + ": could not be written whole ("));
  CHECK(file_text(path) == "before");
  CHECK(folder.names().size() == 1);
}

TEST_CASE("a place that cannot be written to is the user's fault") {
  const Folder folder;
  write_text_atomically(folder / "plain", "no folder");
  SUBCASE("below a file") {
    const auto place = folder / "plain/out";
    CHECK(message_of<InputError>([&] { ensure_writable_folder(place); }).starts_with(place.string()));
    CHECK(message_of<InputError>([&] { write_text_atomically(place / "a.csv", "x"); }).find("--out") !=
          std::string::npos);
  }
  SUBCASE("the name of a folder") {
    std::filesystem::create_directory(folder / "taken");
    CHECK_THROWS_AS(write_text_atomically(folder / "taken", "x"), InputError);
  }
  SUBCASE("a name that is too long") {
    CHECK_THROWS_AS(write_text_atomically(folder / std::string(300, 'n'), "x"), InputError);
  }
  SUBCASE("a folder of someone else") {
    std::filesystem::create_directory(folder / "locked");
    std::filesystem::permissions(folder / "locked", std::filesystem::perms(0555));
    std::filesystem::permissions(folder.path(), std::filesystem::perms(0755));
    // The superuser may write anywhere; 65534 is "nobody".
    const uid_t user = geteuid();
    if (user == 0) REQUIRE(seteuid(65534) == 0);
    const std::string probe = message_of<InputError>([&] { ensure_writable_folder(folder / "locked"); });
    const std::string text = message_of<InputError>([&] { write_text_atomically(folder / "locked/a", "x"); });
    if (user == 0) REQUIRE(seteuid(user) == 0);
    CHECK(probe.starts_with((folder / "locked").string() + ": cannot be written (Permission denied)"));
    CHECK(text.find("Permission denied") != std::string::npos);
    CHECK(std::filesystem::is_empty(folder / "locked"));
  }
}

TEST_CASE("trying a folder leaves nothing in it") {
  const Folder folder;
  ensure_writable_folder(folder / "out/deep");
  CHECK(std::filesystem::is_directory(folder / "out/deep"));
  CHECK(std::filesystem::is_empty(folder / "out/deep"));
}
