# The survey from outside: complete, the same in each of its forms, and a board that plays the C arrays makes the same writes.
set(survey_dir ${CMAKE_CURRENT_LIST_DIR})
set(survey_h ${CMAKE_CURRENT_BINARY_DIR}/survey_c/survey.h)
file(MAKE_DIRECTORY ${CMAKE_CURRENT_BINARY_DIR}/survey_c)
add_custom_command(OUTPUT ${survey_h} COMMAND hyoid_program survey --quiet --c ${survey_h} DEPENDS hyoid_program)
add_executable(survey_board ${survey_dir}/survey_board.c ${survey_h})
target_include_directories(survey_board PRIVATE ${CMAKE_CURRENT_BINARY_DIR}/survey_c)
target_link_libraries(survey_board PRIVATE hyoid_options hyoid)
hyoid_test(survey ${with_tools} python3 -- python3 -B ${survey_dir}/survey.py $<TARGET_FILE:survey_board>)
hyoid_test(survey_avr ${with_tools} avr-gcc -- avr-gcc -mmcu=atmega328p -Os -Wall -Wextra -Werror -std=c11
           -DON_A_MICROCONTROLLER -I${CMAKE_CURRENT_BINARY_DIR}/survey_c -c ${survey_dir}/survey_board.c
           -o ${CMAKE_CURRENT_BINARY_DIR}/survey_c/avr.o)
set_tests_properties(survey survey_avr PROPERTIES LABELS outside)
