// Where the time of an inspection goes, stage by stage. report.json does not hold it: the same photo gives the same
// bytes there, however long they took.
#pragma once

#include <chrono>
#include <filesystem>
#include <map>
#include <mutex>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <thread>
#include <vector>

#include "sheetloupe/inspect.h"

namespace sheetloupe {

/// A stop watch for work on several threads; each thread is in one stage at a time.
class StageTimes {
 public:
  using Clock = std::chrono::steady_clock;

  /// The calling thread's stage begins now; the one it was in ends. "front: weave" is the stage weave of the part
  /// front.
  void begin(const std::string& stage);
  /// The calling thread's stage ends.
  void end();

  /// `options` with the watch listening to its stages, beside whoever listens already. The watch must outlive it.
  InspectOptions watching(InspectOptions options);

  /// Since the watch was made: {"schema_version", "total_s", "parts": [{"part", "s", "stages": [{"stage", "s"}]}]}, in
  /// the order of their beginning. Parts run side by side, so their sum may exceed the total. Seconds to 0.01.
  nlohmann::ordered_json so_far() const;

 private:
  struct Stage {
    std::string name;
    double seconds = 0.0;
  };
  struct Running {
    std::size_t stage;
    Clock::time_point since;
  };
  void close(std::thread::id thread, Clock::time_point now);

  mutable std::mutex mutex_;
  const Clock::time_point start_ = Clock::now();
  std::vector<Stage> stages_;
  std::map<std::thread::id, Running> running_;
};

/// "6.1 s: photos 0.9, front 4.0, back 3.8, ..." in one line, of what `so_far` gave.
std::string times_in_a_line(const nlohmann::ordered_json& times);

}  // namespace sheetloupe
