# Firmware in the loop: our examples, compiled by avr-gcc and run by libsimavr, against the scores that they say.
hyoid_test(firmware_outside ${with_tools} avr-gcc python3 -- python3 -B
           ${PROJECT_SOURCE_DIR}/tests/outside/firmware/firmware.py)
set_tests_properties(firmware_outside PROPERTIES LABELS outside)
