// The shipped nets run by oneDNN, beside OpenCV's own run of the same files: another implementation of every layer.
#include "defects/net_runner.h"

#include <gtest/gtest.h>

#include <cmath>

#include "sheetloupe/errors.h"
#include "support/shipped_net.h"

namespace sheetloupe::defects {
namespace {

constexpr double kRounding = 1e-4;  // of logits of some ten: both add up thousands of products, in another order

cv::Mat noise(const NetRunner::Shape& shape) {
  cv::Mat picture(4, shape.data(), CV_32F);
  cv::RNG random(7);
  random.fill(picture, cv::RNG::NORMAL, 0.0, 1.0);
  return picture;
}

double worst_difference(const std::string& file, const NetRunner::Shape& shape) {
  cv::dnn::Net net = load_net(shipped_net(file), file.c_str());
  const cv::Mat picture = noise(shape);
  NetRunner runner(net, shape, file.c_str());
  picture.copyTo(runner.input());
  const cv::Mat ours = runner.run().clone();
  net.setInput(picture);
  const cv::Mat theirs = net.forward();
  EXPECT_EQ(ours.total(), theirs.total());
  EXPECT_GT(cv::norm(theirs, cv::NORM_INF), 1.0);  // it says something
  return cv::norm(ours.reshape(1, 1), theirs.reshape(1, 1), cv::NORM_INF);
}

TEST(NetRunner, GivesOpenCvsAnswersOnPatches) {
  EXPECT_LT(worst_difference("pinholes.onnx", {32, 8, 24, 24}), kRounding);
}

TEST(NetRunner, GivesOpenCvsAnswersOnASmallGrid) {
  EXPECT_LT(worst_difference("areas.onnx", {1, 22, 8, 16}), kRounding);
}

TEST(NetRunner, GivesOpenCvsAnswersOnAWholeGrid) {
  EXPECT_LT(worst_difference("areas.onnx", {1, 22, 456, 600}), kRounding);
}

TEST(NetRunner, AnswersEveryPictureOfABatchByItself) {
  cv::dnn::Net net = load_net(shipped_net("pinholes.onnx"), "pinholes");
  const cv::Mat pictures = noise({32, 8, 24, 24});
  NetRunner runner(net, {32, 8, 24, 24}, "pinholes");
  pictures.copyTo(runner.input());
  const cv::Mat together = runner.run().clone();
  // The last picture alone, in the first place.
  cv::Mat input = runner.input();
  input.setTo(0);
  std::copy_n(pictures.ptr<float>(31), 8 * 24 * 24, input.ptr<float>(0));
  EXPECT_NEAR(runner.run().ptr<float>()[0], together.ptr<float>()[31], kRounding);
  EXPECT_GT(std::abs(together.ptr<float>()[0] - together.ptr<float>()[31]), 100 * kRounding);
}

TEST(NetRunner, RefusesBytesThatAreNoNet) {
  EXPECT_THROW(load_net({'n', 'o', ' ', 'n', 'e', 't'}, "pinholes"), InputError);
}

TEST(NetRunner, RefusesPicturesOfAnotherNumberOfPlanes) {
  cv::dnn::Net net = load_net(shipped_net("pinholes.onnx"), "pinholes");
  EXPECT_THROW(NetRunner(net, {32, 5, 24, 24}, "pinholes"), InputError);
}

TEST(NetRunner, RefusesPicturesOfAnotherSizeThanTheDenseLayerTakes) {
  cv::dnn::Net net = load_net(shipped_net("pinholes.onnx"), "pinholes");
  EXPECT_THROW(NetRunner(net, {32, 8, 20, 24}, "pinholes"), InputError);
}

}  // namespace
}  // namespace sheetloupe::defects
