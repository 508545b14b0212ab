#include "bus/profile/raw_number.hpp"

#include <doctest/doctest.h>

#include "bus/profile/image_in_tests.hpp"

namespace phasewright::profile {

namespace {
std::optional<double> number_in(ValueType type, Order words, Order bytes, std::string_view hex_text) {
    RegisterImage image;
    put_holding(image, 100, hex_text);
    Field const field{.address = 100, .type = type, .words = words, .bytes = bytes};
    auto const raw = raw_of(field, image);
    return raw ? number_of(type, *raw) : std::nullopt;
}
constexpr auto high = Order::high_first;
constexpr auto low = Order::low_first;
}  // namespace

TEST_CASE("a floating-point number is read in each of the four orders that meters use") {
    // IEEE 754: 230.5 = 1.80078125 * 2^7, sign 0, exponent 134 = 0x86, fraction 0xCD 0x00 / 2: bits
    // 0x43668000.
    CHECK(number_in(ValueType::float32, high, high, "43 66 80 00") == 230.5);
    CHECK(number_in(ValueType::float32, low, high, "80 00 43 66") == 230.5);
    CHECK(number_in(ValueType::float32, high, low, "66 43 00 80") == 230.5);
    CHECK(number_in(ValueType::float32, low, low, "00 80 66 43") == 230.5);
    // IEEE 754 double: -1 is 0xBFF0000000000000.
    CHECK(number_in(ValueType::float64, high, high, "BF F0 00 00 00 00 00 00") == -1.0);
    CHECK(number_in(ValueType::float64, low, high, "00 00 00 00 00 00 BF F0") == -1.0);
}

TEST_CASE("integers are two's complement in every width and order") {
    CHECK(number_in(ValueType::int16, high, high, "FF FE") == -2.0);
    CHECK(number_in(ValueType::uint16, high, high, "FF FE") == 65534.0);
    CHECK(number_in(ValueType::int16, high, low, "FE FF") == -2.0);
    CHECK(number_in(ValueType::int32, high, high, "FF FF FF 85") == -123.0);
    CHECK(number_in(ValueType::int32, low, high, "FF 85 FF FF") == -123.0);
    CHECK(number_in(ValueType::uint32, low, high, "E2 40 00 01") == 123456.0);  // 0x0001E240
    CHECK(number_in(ValueType::int64, high, high, "FF FF FF FF FF FF FF FE") == -2.0);
    CHECK(number_in(ValueType::uint64, low, high, "00 05 00 00 00 00 00 00") == 5.0);
}

TEST_CASE("a number with a register missing is not a number, and neither are NaN and infinity") {
    CHECK_FALSE(number_in(ValueType::float32, high, high, "43 66").has_value());
    CHECK_FALSE(number_in(ValueType::float32, high, high, "7F C0 00 00").has_value());
    CHECK_FALSE(number_in(ValueType::float32, high, high, "FF 80 00 00").has_value());
    CHECK_FALSE(number_in(ValueType::float64, high, high, "7F F0 00 00 00 00 00 00").has_value());
}

TEST_CASE("a number that does not fit is held at the end of its type") {
    CHECK(bits_of(ValueType::int16, 40000.0) == 0x7FFF);
    CHECK(bits_of(ValueType::int16, -40000.0) == 0x8000);
    CHECK(bits_of(ValueType::uint16, -3.0) == 0);
    CHECK(bits_of(ValueType::uint16, 2309.5) == 2310);
    CHECK(bits_of(ValueType::int32, -123.0) == 0xFFFFFF85);
    CHECK(bits_of(ValueType::int64, 1e300) == 0x7FFFFFFFFFFFFFFF);
    CHECK(bits_of(ValueType::uint64, 1e300) == 0xFFFFFFFFFFFFFFFF);
    CHECK(bits_of(ValueType::float32, 230.5) == 0x43668000);
}

TEST_CASE("what is put into registers is read back in every type and order") {
    for (auto const type : {ValueType::int16, ValueType::uint16, ValueType::int32, ValueType::uint32,
                            ValueType::int64, ValueType::uint64, ValueType::float32, ValueType::float64}) {
        for (auto const words : {high, low}) {
            for (auto const bytes : {high, low}) {
                RegisterImage image;
                Field const field{.address = 65530, .type = type, .words = words, .bytes = bytes};
                put_raw(image, field, bits_of(type, 12345.0));
                CHECK(number_of(type, raw_of(field, image).value()) == 12345.0);
                CHECK(image.holding.size() == static_cast<std::size_t>(registers_of(type)));
            }
        }
    }
}

TEST_CASE("a scale register is a power of ten, a multiplier or a divisor, and nothing outside its limits") {
    ScaleRegister scale{.kind = ScaleKind::power_of_ten};
    CHECK(scaled(2309.0, scale, 0xFFFF) == 230.9);  // -1
    CHECK(scaled(23.0, scale, 2) == 2300.0);
    CHECK_FALSE(scaled(23.0, scale, 11).has_value());
    CHECK_FALSE(scaled(23.0, scale, 0x8000).has_value());
    scale.kind = ScaleKind::multiplier;
    CHECK(scaled(3.0, scale, 40) == 120.0);
    CHECK_FALSE(scaled(3.0, scale, 0).has_value());
    scale.kind = ScaleKind::divisor;
    CHECK(scaled(230.0, scale, 100) == 2.3);
    CHECK(unscaled(2.3, scale, 100) == doctest::Approx(230.0));
}

}  // namespace phasewright::profile
