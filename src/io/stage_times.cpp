#include "sheetloupe/io/stage_times.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "sheetloupe/io/strict_json.h"

namespace sheetloupe {
namespace {

double seconds_between(StageTimes::Clock::time_point from, StageTimes::Clock::time_point to) {
  return std::chrono::duration<double>(to - from).count();
}

double hundredths(double seconds) { return std::round(seconds * 100) / 100; }

std::string tenths(const Json& seconds) {
  char text[32];
  std::snprintf(text, sizeof text, "%.1f", seconds.get<double>());
  return text;
}

}  // namespace

void StageTimes::close(std::thread::id thread, Clock::time_point now) {
  const auto it = running_.find(thread);
  if (it == running_.end()) return;
  stages_[it->second.stage].seconds += seconds_between(it->second.since, now);
  running_.erase(it);
}

void StageTimes::begin(const std::string& stage) {
  const auto now = Clock::now();
  const std::scoped_lock lock(mutex_);
  close(std::this_thread::get_id(), now);
  auto it = std::find_if(stages_.begin(), stages_.end(), [&](const Stage& s) { return s.name == stage; });
  if (it == stages_.end()) it = stages_.insert(stages_.end(), {stage, 0.0});
  running_[std::this_thread::get_id()] = {static_cast<std::size_t>(it - stages_.begin()), now};
}

void StageTimes::end() {
  const auto now = Clock::now();
  const std::scoped_lock lock(mutex_);
  close(std::this_thread::get_id(), now);
}

InspectOptions StageTimes::watching(InspectOptions options) {
  options.progress = [this, told = options.progress](const std::string& stage) {
    begin(stage);
    if (told) told(stage);
  };
  options.part_done = [this, told = options.part_done] {
    end();
    if (told) told();
  };
  return options;
}

Json StageTimes::so_far() const {
  const auto now = Clock::now();
  const std::scoped_lock lock(mutex_);
  std::vector<Stage> stages = stages_;
  for (const auto& [thread, running] : running_) stages[running.stage].seconds += seconds_between(running.since, now);
  Json parts = Json::array();
  std::vector<double> sums;
  for (const Stage& stage : stages) {
    const std::size_t colon = stage.name.find(": ");
    const std::string part = stage.name.substr(0, colon);
    auto it = std::find_if(parts.begin(), parts.end(), [&](const Json& p) { return p["part"] == part; });
    if (it == parts.end()) {
      parts.push_back({{"part", part}, {"s", 0.0}, {"stages", Json::array()}});
      sums.push_back(0.0);
      it = parts.end() - 1;
    }
    sums[static_cast<std::size_t>(it - parts.begin())] += stage.seconds;
    if (colon != std::string::npos)
      (*it)["stages"].push_back({{"stage", stage.name.substr(colon + 2)}, {"s", hundredths(stage.seconds)}});
  }
  for (std::size_t i = 0; i < sums.size(); ++i) parts[i]["s"] = hundredths(sums[i]);
  return {{"schema_version", 1}, {"total_s", hundredths(seconds_between(start_, now))}, {"parts", parts}};
}

std::string times_in_a_line(const Json& times) {
  std::string words;
  for (const Json& part : times["parts"])
    words += (words.empty() ? "" : ", ") + part["part"].get<std::string>() + " " + tenths(part["s"]);
  return tenths(times["total_s"]) + " s" + (words.empty() ? "" : ": ") + words;
}

}  // namespace sheetloupe
