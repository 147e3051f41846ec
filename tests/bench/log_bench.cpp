// A log of ten thousand sheets: adding one more, listing, the trend page. Beside each figure stands the file system's
// own floor: one flushed write.
#include <benchmark/benchmark.h>
#include <fcntl.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <sstream>

#include "cli/program.h"
#include "sheetloupe/io/demo.h"
#include "sheetloupe/io/log.h"
#include "sheetloupe/io/trend_page.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

constexpr int kSheets = 10000;

// The demo's sheets over and over under other names; a tenth of the sheets has outcomes for all its blanks.
class BigLog {
 public:
  BigLog() : file_(dir_ / "log.db"), sheets_(demo_log_sheets()) {
    // Built in memory and copied: ten thousand flushed commits would take longer than what is measured.
    const std::filesystem::path memory = "/dev/shm";
    const auto draft = (std::filesystem::is_directory(memory) ? memory : dir_.path()) /
                       ("sheetloupe-bench-" + std::to_string(getpid()) + ".db");
    {
      SheetLog log(draft, true);
      for (int n = 0; n < kSheets; ++n) {
        const Inspected i = numbered(n);
        log.add(i, "2026-03-02T12:00:00Z");
        if (n % 10 == 0) log.add_outcomes(demo_log_outcomes({i}));
      }
    }
    std::filesystem::copy_file(draft, file_);
    std::filesystem::remove(draft);
  }
  Inspected numbered(int n) const {
    Inspected i = sheets_[static_cast<std::size_t>(n) % sheets_.size()];
    char id[40];
    std::snprintf(id, sizeof id, "G-%06d", n);
    i.sheet = id;
    i.content_sha256 = id;
    for (LoggedBlank& b : i.blanks) b.id = i.sheet + b.id.substr(b.id.rfind('-'));
    return i;
  }
  const std::filesystem::path& file() const { return file_; }

 private:
  TempDir dir_;
  std::filesystem::path file_;
  std::vector<Inspected> sheets_;
};

const BigLog& big() {
  static const BigLog log;
  return log;
}

void FlushedWrite(benchmark::State& state) {
  const TempDir dir;
  const int file = open((dir / "x").c_str(), O_RDWR | O_CREAT, 0600);
  const std::string page(16384, 'x');
  for (auto _ : state) {
    if (pwrite(file, page.data(), page.size(), 0) < 0 || fsync(file) != 0) std::abort();
  }
  close(file);
}
BENCHMARK(FlushedWrite)->Unit(benchmark::kMillisecond)->UseRealTime();

// As the command does it: open, add, close.
void AddOneSheet(benchmark::State& state) {
  const auto& file = big().file();
  static int n = kSheets;
  for (auto _ : state) {
    SheetLog log(file, true);
    log.add(big().numbered(n++), "2026-03-02T12:00:00Z");
  }
}
BENCHMARK(AddOneSheet)->Unit(benchmark::kMillisecond)->UseRealTime()->MinTime(1);

void ListNewestFifty(benchmark::State& state) {
  for (auto _ : state) {
    std::ostringstream out;
    cli::run_program({"log", "list", "--db", big().file().string()}, {out, out});
    benchmark::DoNotOptimize(out.str());
  }
}
BENCHMARK(ListNewestFifty)->Unit(benchmark::kMillisecond)->UseRealTime();

void ListEverySheet(benchmark::State& state) {
  for (auto _ : state) {
    std::ostringstream out;
    cli::run_program({"log", "list", "--all", "--db", big().file().string()}, {out, out});
    benchmark::DoNotOptimize(out.str());
  }
}
BENCHMARK(ListEverySheet)->Unit(benchmark::kMillisecond)->UseRealTime();

void TrendPage(benchmark::State& state) {
  const TempDir dir;
  for (auto _ : state) {
    std::ostringstream out;
    cli::run_program({"trend", "--db", big().file().string(), "--out", dir / "trend.html"}, {out, out});
  }
}
BENCHMARK(TrendPage)->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
}  // namespace sheetloupe
