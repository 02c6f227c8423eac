"""Prints a table of 60 invented people for phonocycle synth. Half of them have a systolic murmur."""
import random

random.seed(1)
print("name: murmurs\ntitle: Invented people with and without a murmur\nrate: 2000\npeople:")
for i in range(60):
    print(f"  - id: p{i:02d}\n    age: {random.randint(5, 80)}\n    sex: {random.choice(['female', 'male'])}")
    print(f"    heart-rate: {random.randint(60, 100)}\n    pitch: {random.uniform(0.9, 1.1):.3f}")
    if i % 2:
        level = random.uniform(0.02, 0.08)
        print(f"    murmurs:\n      - {{state: systole, shape: crescendo-decrescendo, low: 100, high: 350, level: {level:.3f}, loudest: aortic}}")
    print("    recordings:")
    for site in ("aortic", "mitral"):
        print(f"      - {{site: {site}, duration: 6s, noise: pink, snr: {random.randint(15, 30)}}}")
